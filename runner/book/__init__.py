"""The job book: a list of all jobs, derived from their records, that may be deleted at any time.

What is true stands in the jobs' folders. The book only makes finding quick; ``steplatch jobs``
brings it up to date before each list. Export and the care of customers' data lie here too.
"""
