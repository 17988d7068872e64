"""From notes and what is said of them to the stations of the yard; knows no job."""
