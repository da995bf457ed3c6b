"""Coldbench: lab manual and auto-graded worksheets for vehicle climate-control diagnostics.

Rooms, and the one way imports point:
quantity -> refrigerant, air, electrical, sensing -> control -> bench -> diagnosis
-> worksheet -> panels, grading -> cli.
Importing the package itself loads none of them.
"""

__version__ = "0.1.0"
