"""The whole job in a browser, on one's own machine: pages over a folder of ordinary files.

What is long (charts, corrections, pictures) is made by the commands themselves, each in a process
of its own (`commands`); what is shown is read from the files anew (`papers`) by the functions that
the commands call. A view is a module in `views/` with a template of its name, and a line in
`app.py`.
"""
