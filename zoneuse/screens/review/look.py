"""What the review adds to the recorder's look."""

REVIEW_CSS = """
ReviewScreen #standing { height: 1; color: $who; text-style: bold; }
ReviewScreen #asked { height: 1; color: $muted; }
ReviewScreen #keys { color: $muted; }
ReviewScreen #small { display: none; height: 1fr; color: $who; }
ReviewScreen.small #small { display: block; }
ReviewScreen.small #standing, ReviewScreen.small #asked, ReviewScreen.small #bar, ReviewScreen.small #keys,
ReviewScreen.small Leaf, ReviewScreen.small SharedRooms { display: none; }
HomeScreen Leaf { height: auto; max-height: 50%; }
"""
