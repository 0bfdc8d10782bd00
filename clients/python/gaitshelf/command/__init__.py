"""The verbs plot, sweep and map of the program `gaitshelf`, which reads their flags and hands them
on in SI units. For scripts of your own use the package itself."""
from .main import main

__all__ = ["main"]
