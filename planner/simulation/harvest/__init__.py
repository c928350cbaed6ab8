"""What each controller could deliver along the track."""
