"""Planning a shoe: outlines, wall on steel, mass, rules. Pure; Shapely and NumPy.

``plan`` says what is planned, ``reckoned.reckon`` what it comes to, ``rules`` what is
refused or flagged, ``document`` reads and writes the JSON of ``manage.py reckon shoe``.
"""
