"""What a user asks for, one function each; the command line and the local page both call these."""
