"""The steps of the demo's job, one file for each group; `greyscale.demo.scenario` orders them."""
