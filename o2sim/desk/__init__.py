"""The desk: questions, a run and its answer as pages in the browser of the same computer."""
