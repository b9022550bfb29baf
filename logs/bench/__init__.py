"""How fast the computing is, as ratios against the least that the same answer could cost.

Each row's two sides are measured in one run, in turns, by their medians: absolute times depend on
the machine and on what else it does, ratios far less.
"""
