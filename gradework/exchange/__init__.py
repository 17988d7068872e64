"""Results as data for other programs: the result record, tables for spreadsheets.

It turns results into dictionaries and bytes; it never computes one, never touches the disk, never prints.
"""
