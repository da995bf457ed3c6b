"""Writes `__bench_sets__.json`: what the blue bench shows under every set of up to three suspects.

Run it as `python source/fault-trees/__make_bench_sets__.py`; it takes some minutes. Suspects are
those of `case.py` for the question on the whole bench. The hidden check works its key out from
this file, and tells from it what the bench says of a false cut set. Names that begin with two
underscores are not released.

faults     words of each suspect → the bench's name of the fault
shown      what the reading shows: places of the faults in the list above → value [unit]
"""

import itertools
import json
import runpy
from pathlib import Path

from coldbench.bench import load_bench
from coldbench.diagnosis.from_bench import complaint_of, shown_table

BENCH, SYMPTOM, READING = "blue", "fans never run", "condenser flow"
MOST = 3


def main() -> None:
    folder = Path(__file__).parent
    faults = runpy.run_path(str(folder / "case.py"))["BENCH_FAULTS"]
    bench = load_bench(BENCH)
    complaint, (when,) = complaint_of(bench, SYMPTOM), bench.symptoms[SYMPTOM].when
    assert (when.reading, when.comparison) == (READING, "below")
    places = [places for count in range(MOST + 1)
              for places in itertools.combinations(range(len(faults)), count)]
    ids = list(faults.values())
    cases = {one: tuple(ids[n] for n in one) for one in places}
    table = shown_table(bench, [complaint.state], cases.values())
    assert not table.failed, table.failed
    shown = {one: round(table.row(complaint.state, case)[READING][0], 1)
             for one, case in cases.items()}
    lines = ",\n  ".join(f'"{" ".join(map(str, one))}": {value}' for one, value in shown.items())
    head = {"bench": BENCH, "symptom": SYMPTOM, "state": complaint.state, "reading": READING,
            "unit": when.unit, "below": when.value, "most": MOST, "faults": faults}
    text = json.dumps(head, indent=1, ensure_ascii=False).removesuffix("\n}")
    (folder / "__bench_sets__.json").write_text(
        f'{text},\n "shown": {{\n  {lines}\n }}\n}}\n', "utf-8")
    print(len(shown), "sets simulated")


if __name__ == "__main__":
    main()
