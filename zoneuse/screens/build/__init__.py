"""The screen on which a study is declared: `desk` is its state, `face` draws it, `app` brings keys and touches."""
