/*
title     = "No spare fuse of a rating in use"
subject   = "kit"
severity  = "advice"
why       = "A blown fuse ends the day where the next one is at home."
not_met   = "{subject}: too few spare fuses for the ratings in use: {short_ratings}; carry {least} of each."
not_known = "{subject}: fuses are listed without their rating, so the spares cannot be counted."
fix       = "Put {least} spare fuses of each rating in the bag (an assortment is about 8 to 15 USD). Replace a fuse only by one of the same rating, with the battery disconnected."
source    = "common practice: spare parts lists after the 2017 hurricane season and club event checklists"
applies_to = "kits with a fuse or fuse holder in use"

[param.least]
value  = 2
unit   = "1"
why    = "the first spare often blows while the fault is looked for"
source = "common practice"

[remedy]
kind = "fuse"
*/
with used as (
    select kit_id, amps_rated, line from item
    where is_usable and not is_spare and role = 'fuse'
), spare as (
    select kit_id, amps_rated, sum(quantity) as pieces from item
    where is_usable and is_spare and role = 'fuse' group by kit_id, amps_rated
), counted as (
    select u.kit_id, u.amps_rated, any_value(s.pieces) as pieces, list(u.line order by u.line) as lines
    from used as u left join spare as s on s.kit_id = u.kit_id and s.amps_rated = u.amps_rated
    group by u.kit_id, u.amps_rated
)
select
    kit_id as subject,
    string_agg(cast(amps_rated as integer) || ' A', ', ' order by amps_rated)
        filter (amps_rated is not null and coalesce(pieces, 0) < $least) as short_ratings,
    flatten(list(lines)) as lines,
    case when bool_or(amps_rated is not null and coalesce(pieces, 0) < $least) then false
         when bool_and(amps_rated is not null) then true end as ok
from counted
group by kit_id
