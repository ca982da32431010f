"""The version of the package: its only copy."""

VERSION = "0.1.0"
