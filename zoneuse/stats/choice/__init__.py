"""The discrete choice model and what is read from its curves.

Names nothing here: most answers take one small piece of it, and would load all of the model.
"""
