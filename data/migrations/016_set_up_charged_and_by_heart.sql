-- How long a set-up took, whether a loan came back charged, and whether a member knows their radio by heart.
alter table told_rehearsals add column setup_min double;
alter table told_loans add column charged_in boolean;
alter table told_members add column radio_by_heart boolean;
