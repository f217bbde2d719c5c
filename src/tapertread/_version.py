"""The version, apart from the front page so that any room may know it."""

__version__ = "0.1.0"
