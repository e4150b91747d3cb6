"""The local room: the real bot on the offline simulator. The only place that imports simcord."""
