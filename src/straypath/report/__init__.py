"""From records to words, JSON, HTML and figures."""
