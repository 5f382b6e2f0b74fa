"""Forms: what is typed becomes plain values with a sentence at each field; actions do the rest."""
