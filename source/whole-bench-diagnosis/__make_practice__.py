"""Seals the three practice benches and writes their keys; run it after the bench's model changed.

    python source/whole-bench-diagnosis/__make_practice__.py

One fault of each of three families, named here for the instructor's eyes; the sealed files hold two
operating states, which keeps them small.
"""

from pathlib import Path

from coldbench.grading.assign_pool import Pool
from coldbench.grading.assign_practice import write_practice

POOL = Pool(
    bench="blue", states=("full cooling", "off"),
    families={"electrical": ("KB:coil_open",), "sensor": ("PT401:output_open",),
              "refrigerant": ("txv-inlet-blocked",)},
    complaints=("no air from the vents", "warm air at every vent",
                "cools at first, then warm, then cool again"),
)
SEED = 20260306

if __name__ == "__main__":
    print(write_practice(Path(__file__).parent, POOL, SEED).words)
