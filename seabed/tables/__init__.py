"""Tables of text and spreadsheets, of whatever separator, heading, zone or decimal sign."""
