"""`coldbench lab`: the start page, the settings it hands over, nbgrader's form, and refusals."""

import json
import re
import urllib.request

import nbformat
import pytest

SETTINGS = "/lab/api/settings/"


@pytest.fixture(scope="module")
def start(browser, lab_address):
    """The page a learner sees first, opened at the printed address."""
    page = browser.new_page(viewport={"width": 1400, "height": 950})
    page.goto(lab_address)
    page.wait_for_selector(".jp-MarkdownViewer h1", timeout=120_000)
    yield page
    page.close()


def test_the_start_page_lists_the_labs(start):
    page = start.locator(".jp-MarkdownViewer")
    assert page.locator("h1").inner_text() == "The labs"
    assert page.get_by_role("link", name="From pressure to temperature").count() == 1
    assert "source/" not in page.inner_html()


def test_a_lab_opens_from_the_start_page(start):
    start.get_by_role("link", name="From pressure to temperature").click()
    start.locator(".jp-Notebook .jp-Cell").nth(2).wait_for(timeout=120_000)
    assert start.locator(".jp-Notebook .jp-Cell").count() == 3


def test_nothing_asks_about_news(start):
    start.wait_for_timeout(1500)
    assert start.locator(".jp-Dialog").count() == 0
    assert start.locator(".Toastify__toast").count() == 0


def setting(lab_address: str, plugin: str) -> dict:
    """Defaults of a JupyterLab plugin as the server gives them: {name: value}."""
    base, token = lab_address.split("/lab/")[0], lab_address.split("token=")[1]
    headers = {"Authorization": f"token {token}"}
    request = urllib.request.Request(f"{base}{SETTINGS}{plugin}", headers=headers)
    with urllib.request.urlopen(request, timeout=20) as answer:
        properties = json.load(answer)["schema"]["properties"]
    return {name: entry.get("default") for name, entry in properties.items()}


def test_widget_state_is_saved_and_news_are_off(lab_address):
    assert setting(lab_address, "@jupyter-widgets/jupyterlab-manager:plugin")["saveState"] is True
    assert setting(lab_address, "@jupyterlab/apputils-extension:notification")["fetchNews"] == "false"


def test_a_notebook_exported_as_html_takes_its_pictures_along(lab_address, course):
    lab = course / "release" / "pressure-temperature"
    cell = nbformat.v4.new_markdown_cell("![A square.](square.svg)")
    nbformat.write(nbformat.v4.new_notebook(cells=[cell]), lab / "picture.ipynb")
    (lab / "square.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0h9v9H0z"/></svg>')
    base, token = lab_address.split("/lab/")[0], lab_address.split("token=")[1]
    where = "release/pressure-temperature/picture.ipynb"
    address = f"{base}/nbconvert/html/{where}?download=true&token={token}"
    with urllib.request.urlopen(address, timeout=120) as answer:
        page = answer.read().decode()
    (picture,) = re.findall(r'<img[^>]*alt="A square\.[^>]*>', page)
    assert 'src="data:image/svg+xml;base64,' in picture and "square.svg" not in picture


def test_unsafe_keys_are_switched_off(lab_address):
    shortcuts = setting(lab_address, "@jupyterlab/shortcuts-extension:shortcuts")["shortcuts"]
    off = {s["keys"][0] for s in shortcuts if s.get("disabled")}
    assert {"A", "B", "C", "V", "M", "R", "X", "1", "2", "3", "4", "5", "6"} <= off


def test_the_form_for_marking_by_hand_lists_the_lab(open_page):
    page = open_page("/formgrader")
    row = page.get_by_role("link", name=re.compile("pressure-temperature")).first
    row.wait_for(timeout=120_000)
    page.close()


def test_an_id_is_text_on_nbgraders_pages(lab_address):
    base, token = lab_address.split("/lab/")[0], lab_address.split("token=")[1]

    def ask(path: str, **how) -> str:
        head = {"Authorization": f"token {token}", "Content-Type": "application/json"}
        asked = urllib.request.Request(f"{base}/formgrader/{path}", headers=head, **how)
        with urllib.request.urlopen(asked, timeout=60) as answer:
            return answer.read().decode()

    name = "%3Cimg%20src=x%20onerror=harm()%3E"  # <img src=x onerror=harm()>
    ask(f"api/student/{name}", method="PUT", data=b"{}")
    page = ask(f"manage_students/{name}/")
    assert "&lt;img src=x onerror=harm()&gt;" in page and "<img src=x" not in page
