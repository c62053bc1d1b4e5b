-- clean.unknown_places: one row per cell that names no known place, by log and typing group, with
-- what to do about it where more can be said than to add it or correct it.
-- Reads clean.row_faults, clean.words, clean.disputed_names, clean.points,
-- clean.service_points_cells, raw.loads.
create or replace table clean.unknown_places as
with cells as (
    select distinct f.log, l.typing_group, f.value, trim(f.value,
        ' ' || chr(9) || chr(10) || chr(13) || chr(160) || chr(8199) || chr(8239) || chr(65279))
        as written
    from clean.row_faults as f
    join raw.loads as l using (load_id, entry_no)
    where f.reason = 'is no known service point'
),

-- A mapping leads an old name, or a word of one file, to another name: that one is not known then.
sought as (
    select
        c.log, c.typing_group, c.value, w.meaning as led_to, coalesce(w.meaning, c.written) as place,
        d.places as disputed,
        regexp_replace(upper(coalesce(w.meaning, c.written)), '[^\p{L}\p{N}]', '', 'g') as plain
    from cells as c
    left join clean.words as w on w.log = c.log and w.typing_group = c.typing_group
        and w.column_name = 'service_point' and w.word = c.written
    left join clean.disputed_names as d on d.log = c.log and d.typing_group = c.typing_group
        and d.name = c.written
),

refused_places as (
    select trim(t.service_point) as place, min(l.source_file || ' row ' || t.source_row) as found_at
    from clean.service_points_cells as t
    join raw.loads as l using (load_id, entry_no)
    where t.reasons is not null
    group by trim(t.service_point)
),

points as materialized (  -- as one would misspell them: without signs and in capitals
    select service_point, regexp_replace(upper(service_point), '[^\p{L}\p{N}]', '', 'g') as plain
    from clean.points
),

alike as (
    select min(service_point) as place, plain from points semi join sought using (plain)
    group by plain having count(*) = 1
),

led as (  -- each is looked for among all places, of which there may be a million
    select distinct led_to, plain from sought where led_to is not null order by led_to limit 10
),

beside as (
    select l.led_to, p.service_point, damerau_levenshtein(l.plain, p.plain) as n_slips,
        least(3, ceil(len(l.plain) / 2)) as most_slips
    from led as l join points as p on abs(len(p.plain) - len(l.plain)) <= 3
),

nearest as (
    select led_to, string_agg(service_point, ', ' order by n_slips, service_point) as places
    from (
        select * from beside where n_slips <= most_slips
        qualify row_number() over (partition by led_to order by n_slips, service_point) <= 3)
    group by led_to
)

select s.log, s.typing_group, s.value, case
    when r.place is not null then 'Correct ' || r.found_at || ', which was refused.'
    when s.disputed is not null
        then 'One columns.toml leads this name to ' || s.disputed || '. Enter it again under the one'
            || ' that is meant, or lead it to the same place in each of them and load their files'
            || ' again.'
    when s.led_to is not null
        then 'columns.toml leads this name to ' || s.led_to || ', which the register of service points'
            || ' does not hold' || coalesce(' (nearest there: ' || n.places || ')', '')
            || '. Correct that name in columns.toml, or add ' || s.led_to || ' to service_points.'
    else 'Write it as ' || a.place || ', or add it to service_points.'
    end as remedy
from sought as s
left join refused_places as r using (place)
left join nearest as n using (led_to)
left join alike as a using (plain)
order by s.log, s.typing_group, s.value
