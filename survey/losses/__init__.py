"""From state to steam lost, to money and carbon dioxide, with a 10-90 % range."""
