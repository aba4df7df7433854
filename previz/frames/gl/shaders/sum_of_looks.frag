#version 330 core
uniform sampler2DArray drawn;
uniform float weight;
out vec4 seen;
void main() {
    vec4 here = texelFetch(drawn, ivec3(gl_FragCoord.xy, 0), 0);
    seen = vec4(min(here.rgb, vec3(60000.0)), here.a) * weight;
}
