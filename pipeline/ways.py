"""By which standard and equation the figures of a sample were found: of all ways to a property those really taken."""

#: The query for one row per sample, method of its specimens (null: the sample's own figures) and property. A mean is
#: told by how its specimens were found; those of the method it is declared over, where there are any.
WAYS = """
    with value as (
        select sample_id, method, property, level, route, formula_version from property_value
        where valid_to_run is null and {scope}
    ), told as (
        select v.*, concat_ws(', ', f.standard, f.section) as standard, f.equation
        from value v join formula f using (property, level, route, formula_version)
    ), specimen as (
        select distinct sample_id, method, property, standard, equation from told where level = 'specimen'
    ), own as (
        select distinct t.sample_id, t.property, i.input is not null as averaged, i.input_method, t.standard, t.equation
        from told t left join formula_input i
          on i.formula_version = t.formula_version and i.property = t.property and i.route = t.route
         and i.input = t.property and i.kind = 'figure'
        where t.level = 'sample'
    ), found as (
        select sample_id, method, property, standard, equation from specimen
        union all
        select o.sample_id, null, o.property, coalesce(s.standard, o.standard), coalesce(s.equation, o.equation)
        from own o left join specimen s
          on o.averaged and s.sample_id = o.sample_id and s.property = o.property
        qualify s.method is not distinct from o.input_method
             or not bool_or(s.method is not distinct from o.input_method) over (partition by o.sample_id, o.property)
    )
    select sample_id, method, property,
           string_agg(distinct standard, '; or ' order by standard) as standard,
           string_agg(distinct equation, '; or ' order by equation) as equation
    from found group by all order by all"""
