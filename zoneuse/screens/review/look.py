"""What the review adds to the recorder's look."""

REVIEW_CSS = """
ReviewScreen #title { height: 1; color: $who; text-style: bold; }
ReviewScreen #asked { height: 1; color: $muted; }
ReviewScreen #keys { color: $muted; }
ReviewScreen #small { display: none; height: 1fr; color: $who; }
ReviewScreen.small #small { display: block; }
ReviewScreen.small #title, ReviewScreen.small #asked, ReviewScreen.small #bar, ReviewScreen.small #keys,
ReviewScreen.small Leaf, ReviewScreen.small SharedRooms { display: none; }
HomeScreen Leaf { height: auto; max-height: 50%; }
"""
