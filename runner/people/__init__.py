"""Who works here: the roster in people.yaml, and the pin book in the data folder.

from runner.people.pins import PinBook, Accepted, Wrong, Locked, NoPin
"""
