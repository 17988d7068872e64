"""Lengths, bulk measures and other quantities as people write them and like to read them back.

The only room (with the doors that use it) where feet, inches, fractions, yards and tons exist; everything
above works in metres, square metres, cubic metres, kilograms and kilopascals. It never guesses a unit or a
digit, never reads a file, and never prints.
"""
