"""What the keeper declares: study.toml, its names, clock and quantities.

Names nothing here: what opens beside a moving animal loads only the files it needs.
"""
