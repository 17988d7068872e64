"""The command line: reads arguments, opens and writes files, prints. It computes nothing itself.

Importing this package loads click only; a command loads its own rooms when it runs. No
other room prints.
"""
