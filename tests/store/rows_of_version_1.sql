-- What version 1 of the tables held after one kits.csv was accepted.
insert into upload values (
    1, '2026-05-03 10:00:00+00', 'Q1AAA', 'kits.csv', 'kits', 'Q1AAA', 1,
    'member,kit,hours,packed\x0AQ1AAA,bag,6.5,2026-05-02\x0A'::blob,
    '9f49f351a9857aa2e64d09129a8c64b89c61c42581e5c950695df4429f67d4e2', true
);
insert into change values (1, '2026-05-03 10:00:00+00', 'Q1AAA', 'accepted', 1, 'kits.csv: 1 rows of kits took the place of 0');
insert into told_kits (upload_id, file, line, member, kit, hours, packed) values (1, 'kits.csv', 2, 'Q1AAA', 'bag', 6.5, '2026-05-02');
