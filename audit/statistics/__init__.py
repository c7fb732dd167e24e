"""Counting statistics of call-outs: exact rates, false discoveries, trends, mean cumulative functions, charts.

Pure functions of arrays; nothing here knows of homes or valves.
"""
