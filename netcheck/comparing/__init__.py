"""Comparing two answers, and the two cases that they rest on. Stage: beside the judge, before the pages; pure.

a chain of verdicts (`chain`) → which findings changed, and why (`changes`)
two cases → the same devices in both (`pairing`) → what was seen otherwise (`facts`, by `tables`, in the words of
    `wording`), and which questions ended otherwise (`attempts`)
all of it → the document ``netcheck/difference/1`` (`document`)
"""
