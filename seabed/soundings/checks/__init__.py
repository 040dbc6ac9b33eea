"""What soundings say of one another: the sounder's lag, crossings of lines, the tide taken off."""
