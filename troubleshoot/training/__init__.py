"""A coater that can be broken safely, and made pictures: to learn from, and to try the readers on.

Physics forward in time. Nothing of it is ever written into a lab's statistics, and it knows nothing
of the readers.
"""
