"""How a change was tested: by lot, against enclosures left alone, taken back and made again."""
