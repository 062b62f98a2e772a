"""The answers to a study's questions. The door is `study.Study`; what answers there are stands in `registry`."""
