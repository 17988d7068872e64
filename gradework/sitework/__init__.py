"""What is bought, hauled and watched on site: the order, boards, fabric, soil to move, where water runs.

It never designs a foundation, never reads or writes a file, and never prints.
"""
