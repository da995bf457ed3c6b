"""The instruments of a whole bench, one group a module: each asks a scene, none asks the model.

    by_sight            eyes and ears, free of charge
    refrigerant_side    gauges, pipe thermometer, sight glass, recovery, leak search
    air_side            vent thermometer, anemometer
    electrical_side     meter, clamp, test lamp, oscilloscope
    head_side           stored codes, live data, actuator tests

A function takes the outfit and the scene, and returns what was found. It raises a `Refusal` for
what is unsafe or impossible as the bench stands, an `InputError` for what there is not.
"""
