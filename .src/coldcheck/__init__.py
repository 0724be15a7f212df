"""coldcheck: the checks made on a vacuum-tube amplifier before power is applied."""

__version__ = "0.1.0"
