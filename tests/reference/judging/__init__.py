"""Judges of finished jobs that share no code with the program.

They know a job by its ``record.json`` and the artwork it was made from; pages are rendered by
independent PDF readers, cut apart and laid together by the record's figures alone.
"""
