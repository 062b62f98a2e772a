"""What is on record: journals written, read and folded.

Names nothing here: what opens beside a moving animal loads only the files it needs.
"""
