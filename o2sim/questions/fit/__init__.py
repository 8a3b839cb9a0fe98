"""`o2sim fit`: a scenario, joint draws and a page of pictures, fitted to what a hospital's books say."""
