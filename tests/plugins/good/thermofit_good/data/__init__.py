"""A curve set, named relative to this folder."""

PATH = "parts.csv"
