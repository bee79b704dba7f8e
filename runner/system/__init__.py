"""What differs from one operating system to the next: files and locks, clocks, signals, processes,
the keys of a console. Everything else asks here, by feature; no other room imports a module that
only some systems have.

Written for Linux, macOS and Windows. On Windows it was never run: tried under a simulation that
hides what Windows lacks (``tests/system``).
"""
