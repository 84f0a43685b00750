"""What each command of the command line does, loaded only when that command runs."""
