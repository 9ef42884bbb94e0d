"""An invented studio: its printer, papers, profiles and masters, all computed."""
