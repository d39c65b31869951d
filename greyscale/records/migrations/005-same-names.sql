-- Names are the same by `name_key`, as everywhere else: without regard to case, spaces and ways of
-- writing a letter. Of names that are now the same the first stays, with all that belongs to each.
UPDATE entries SET
    printer = (SELECT min(a.id) FROM printers a, printers b
               WHERE b.id = printer AND name_key(a.name) = name_key(b.name)),
    paper = (SELECT min(a.id) FROM papers a, papers b
             WHERE b.id = paper AND name_key(a.name) = name_key(b.name)),
    inks = (SELECT min(a.id) FROM inks a, inks b
            WHERE b.id = entries.inks AND name_key(a.name) = name_key(b.name)),
    settings = (SELECT min(a.id) FROM settings a, settings b
                WHERE b.id = entries.settings AND name_key(a.name) = name_key(b.name));
DELETE FROM printers WHERE id NOT IN (SELECT min(id) FROM printers GROUP BY name_key(name));
DELETE FROM papers WHERE id NOT IN (SELECT min(id) FROM papers GROUP BY name_key(name));
DELETE FROM inks WHERE id NOT IN (SELECT min(id) FROM inks GROUP BY name_key(name));
DELETE FROM settings WHERE id NOT IN (SELECT min(id) FROM settings GROUP BY name_key(name));
UPDATE printers SET plain = name_key(name);
UPDATE papers SET plain = name_key(name);
UPDATE inks SET plain = name_key(name);
UPDATE settings SET plain = name_key(name);
