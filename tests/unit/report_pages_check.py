"""What every page the kit makes must be: inert, self-contained, with an outline. No tests here."""

import re
from html.parser import HTMLParser

FORBIDDEN = {"script", "iframe", "object", "embed", "link", "form", "base", "foreignobject",
             "animate", "set", "video", "audio", "input", "button", "applet", "frame", "use"}
ADDRESSES = {"href", "src", "srcset", "action", "formaction", "poster", "data", "xlink:href",
             "background", "cite"}
VOID = {"meta", "img", "br", "hr", "input", "link", "wbr"}


class PageReader(HTMLParser):
    """Reads a page as a browser would and lists what is wrong with it."""

    def __init__(self, page: str):
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self.headings: list[int] = []
        self.words: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.open: list[str] = []
        self.policy = ""
        self.language = ""
        self.feed(page)
        self.close()
        self.faults += [f"never closed: {tag}" for tag in self.open]

    def handle_starttag(self, tag: str, attrs: list) -> None:
        """Look at one element."""
        about = {name: value or "" for name, value in attrs}
        if tag in FORBIDDEN:
            self.faults.append(f"element {tag}")
        for name, value in about.items():
            self._look(tag, name, value)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "html":
            self.language = about.get("lang", "")
        if tag == "meta" and about.get("http-equiv") == "Content-Security-Policy":
            self.policy = about.get("content", "")
        if tag == "img" and not about.get("alt"):
            self.faults.append("picture without words")
        if tag == "svg" and not (about.get("aria-label") or about.get("aria-hidden")):
            self.faults.append("drawing without words")
        if tag == "th" and about.get("scope") not in ("row", "col") and "scope" in about:
            self.faults.append("header of nothing")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list) -> None:
        """An element closed at once, as in SVG."""
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        """Elements must close in order."""
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"badly closed: {tag}")

    def handle_data(self, data: str) -> None:
        """Keep what a reader reads."""
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    def _look(self, tag: str, name: str, value: str) -> None:
        if name.startswith("on") or name == "style":
            self.faults.append(f"attribute {name} of {tag}")
        if name == "id":
            if value in self.ids:
                self.faults.append(f"id {value} stands twice")
            self.ids.append(value)
        if name in ADDRESSES:
            picture = tag == "img" and value.startswith("data:image/png;base64,")
            if not picture and not re.match(r"(#|\./|\.\./)", value):
                self.faults.append(f"address {value[:60]}")
            self.links.append(value)

    @property
    def text(self) -> str:
        """All words of the page."""
        return " ".join("".join(self.words).split())


def check_page(page: str) -> PageReader:
    """Fail unless a page is inert, self-contained and has an outline; returns what was read."""
    reader = PageReader(page)
    assert not reader.faults
    assert reader.language == "en"
    assert "default-src 'none'" in reader.policy and "unsafe" not in reader.policy
    assert reader.headings[0] == 1 and reader.headings.count(1) == 1
    steps = [b - a for a, b in zip(reader.headings, reader.headings[1:], strict=False)]
    assert max(steps, default=0) <= 1, "a heading level is left out"
    assert not re.search(r"url\((?!#)|@import", page), "the style sheet loads something"
    for link in reader.links:
        assert not link.startswith("#") or link[1:] in reader.ids
    return reader
