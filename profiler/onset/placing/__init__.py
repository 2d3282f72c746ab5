"""A scene placed on what the body can hold."""
