"""Rounds: one farrier's day, and which barns on which day in the weeks ahead. Pure.

``one_day`` orders and times a single round. For weeks, ``weeks`` says what is asked
and what a plan is, ``sheet`` reads it into the search's terms, ``judge`` costs a plan
and names every rule that it breaks, ``insertion`` says what one more visit would cost
and why one was left over, ``search`` proposes, ``weighing`` puts the weights into
people's words, ``document`` reads and writes the JSON of ``manage.py reckon rounds``.
"""
