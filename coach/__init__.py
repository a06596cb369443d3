"""Walks a woodworker through a batch of dovetail cuts at the bandsaw."""

__version__ = "0.1.0"
