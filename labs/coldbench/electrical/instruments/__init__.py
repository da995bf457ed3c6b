"""The workshop's instruments on a solved circuit: meters, test lamp, oscilloscope."""
