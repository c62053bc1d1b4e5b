-- append.touched: more rows, of places that ever had a part of which a new row says otherwise what
-- its hoses are made as. Reads clean.parts_new, base.clean.parts, base.lives.stays.
insert into append.touched
select distinct point_no
from base.lives.stays
where part_number in (
        select n.part_number
        from clean.parts_new as n
        left join base.clean.parts as o using (part_number)
        where n.deleted or n.construction is distinct from o.construction)
    and point_no not in (from append.touched)
