"""The pages: one module and one template each, with the routes that belong to it."""
