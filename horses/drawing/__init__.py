"""The foot diagram: ``ground`` from the ground side, ``side`` to measure. Pure.

Both come as SVG text with presentation attributes alone (no style, no script), so
that the same drawing stands on pages under a strict policy and in PDFs.
"""
