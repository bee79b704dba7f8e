"""Before a job: the start page, choosing what it rests on, and making the files by questions."""
