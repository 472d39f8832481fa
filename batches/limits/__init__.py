"""Limits of quality control as dated versions, the points they judge, and the charts both stand on."""
