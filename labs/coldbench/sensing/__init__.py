"""Sensors of the climate system: from a physical value to volts, counts and belief.

relations   thermistor, thermistor_fit, platinum, divider, self_heating, transducer, photodiode,
            potentiometer, converter (each one relation both ways)
choosing    selection, preferred
judgement   windows, codes, substitute (pure step functions)
"""
