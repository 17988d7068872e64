"""Results as words for people. It never computes a result, never touches the disk, never prints."""
