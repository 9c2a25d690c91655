"""What every drawn picture needs: scales, ticks, labels that keep apart, spans and steps. No models."""
