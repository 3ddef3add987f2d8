"""The court: its dimensions, the camera that sees it, and what is known of both."""
