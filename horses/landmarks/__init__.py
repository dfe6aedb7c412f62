"""Marks on a photo of a foot into angles and lengths, each with its spread. Pure.

Marks are fractions of the picture: x to the right, y down, 0 to 1. Angles are measured
against the ground line that was marked, not against the picture's edge, so that a
picture may be turned or mirrored. Lengths need a scale: a known length between two
marks. The spread is first-order propagation of how steadily a mark is placed and of how
well the known length is known. What no mark shows (a foot turned from the camera, a
ruler nearer to it than the foot) is in no spread: the cautions say so. ``spots`` names
the landmarks, ``frames`` has the geometry, ``reading.read`` is the way in.
"""
