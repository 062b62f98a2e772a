"""What a picture of the climate needs: readings by hour, drying zones by day, and their charts."""
