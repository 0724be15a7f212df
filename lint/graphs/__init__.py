"""The two graphs of a design: what the schematic connects, and what is soldered."""
