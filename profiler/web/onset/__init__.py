"""Page 3: answers on set, a tab each."""
