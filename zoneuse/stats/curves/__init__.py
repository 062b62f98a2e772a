"""What is read from a curve of choice when it is no parabola, when conditions err, and when the hour carries them.

Names nothing here, as in ``choice``: each answer takes one piece of it.
"""
