"""What the review draws: charts as blocks of text, the enclosure with its shares."""
