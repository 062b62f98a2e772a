"""The commands about the study itself: begin one, check it, what is next."""
